"""What a file's rows are taken for, column by column; what a person says is an edit of it."""
