"""Every page in four states and three sizes: photographed, checked with axe, never too wide."""
