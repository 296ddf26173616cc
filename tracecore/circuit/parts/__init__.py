"""TTL parts: what each does, and whether a chip under a clip obeys its own inputs."""
