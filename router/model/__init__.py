"""The choice: variables, constraints, objective, solving and explanation; alone imports ortools."""
