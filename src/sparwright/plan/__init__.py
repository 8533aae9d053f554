"""The pipeline: from a job to the six answers, its programs and their proof."""
