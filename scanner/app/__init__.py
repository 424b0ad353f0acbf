"""One user errand per file; joins the layers, holds no arithmetic."""
