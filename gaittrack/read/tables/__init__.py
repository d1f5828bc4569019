"""Tables before it is known what is in them: cells, headers, encodings, workbooks."""
