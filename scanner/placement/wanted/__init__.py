"""What the parts ask, as items the search can lay: sets, staves, grain, machines."""
