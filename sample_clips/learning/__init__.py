"""Commands that make vision/data anew from rendered clips with exact truth."""
