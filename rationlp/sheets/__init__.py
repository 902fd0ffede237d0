"""From a ration to the sheets the crew mixes by: batches, weights its scales can show, order of adding."""
