"""Programs that are not one ration: integer programs over weights and mixes, the linear program of a year."""
