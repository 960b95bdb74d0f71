"""The decision model: state space, actions, outcome tables, value iteration, putting, ranking."""
