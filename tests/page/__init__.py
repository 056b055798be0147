"""The page in a real browser: from the form to the model that turns, by mouse, finger and keyboard."""
