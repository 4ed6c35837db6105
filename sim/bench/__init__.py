"""Work with meter, lamp and iron: readings, diagnosis, unknown pieces, worksheets."""
