"""The steps of the work. A page registers itself here: a module with ``STEP``, found by ``all_steps``."""
