"""A package in the words and layouts of others: standards of neighbouring fields, and a workbook for a spreadsheet."""
