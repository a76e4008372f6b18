"""What a program's text will really cut."""
