"""From a ration to a sheet the crew mixes by.

request, practice, record   what is asked for; figures of the trade; what a sheet says for reading it back
weights/  whole steps and packages that the scales can show     batches   how large, how many
bucket, order   what is thinned by hand first; what goes in when     eaters, carry_over   for whom, and what not after
model, pack, purchases      the sheets, put together; what to buy for them
"""
