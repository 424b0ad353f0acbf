"""What a lot holds, and how boards, parts and photos come into it."""
