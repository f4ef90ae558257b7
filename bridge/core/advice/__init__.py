"""May this train go, and what is foreseen of those that go."""
