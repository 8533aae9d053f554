"""The machine the member will serve: deflection at the tool and first frequencies."""
