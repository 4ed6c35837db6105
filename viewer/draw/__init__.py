"""What a picture consists of: drawing calls on a scene, by any scene's own means."""
