"""Values printed in standards, and second implementations, against our measures."""
