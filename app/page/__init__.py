"""What the page needs beside its screens: the door, the studio, the look, drawings, the sheet."""
