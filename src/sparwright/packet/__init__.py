"""All that goes to the machine: setup sheets, drawings, lists, exports."""
