"""One case: its page, history, design, questions, photographs."""
