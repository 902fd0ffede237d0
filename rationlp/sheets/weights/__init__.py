"""From a ration to weights that the scales can show."""
