"""The lot file: boards, flaws, photos and a journal of every action (design section 8)."""
