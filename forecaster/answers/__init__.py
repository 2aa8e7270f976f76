"""The answers, a room each: windows, crops, frost, past seasons, a bed of the book."""
