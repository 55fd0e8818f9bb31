// This folder is also a sketch: this file makes it one, and is empty because main.c has main.
