"""The case: what a team keeps of a fault from symptom to proof, in one file. Nothing here knows Qt."""
