"""The lot file: boards, flaws, photos and a journal of every action."""
