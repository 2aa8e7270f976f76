"""Bytes → text → a table of cells: layouts, cells, dates, headings."""
