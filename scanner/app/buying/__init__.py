"""Before the wood is bought: how much, which boards, what grade, at what price."""
