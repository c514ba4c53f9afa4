"""The lab as the planner reads it: everything open at one instant, in whole minutes after it."""
