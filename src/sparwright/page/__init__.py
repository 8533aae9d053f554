"""The job page in the browser: six bands on one sheet, served on this computer only."""
