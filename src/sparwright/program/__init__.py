"""RS-274 text: the writer, and a reader that knows nothing of the writer."""
