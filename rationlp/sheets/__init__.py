"""From a ration to a sheet the crew mixes by, and back from what was really weighed.

recipes   a ration with the program behind it      scale     steps and masses, exactly, in the book's unit
rounding  whole steps and packages by an integer program
batches   how large, how many                      order     what goes in when, and the bucket before it
pack      all of it as pages                       workbook, page, table   the pages as xlsx, HTML, CSV
weighed, readback   what was weighed               judge     whether it should be fed
uniformity  samples of one batch                   trace     from animals back to bin, sample and offer
"""
