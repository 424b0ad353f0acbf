"""A development tool: photographs of rough boards, rendered from one solid model each."""
