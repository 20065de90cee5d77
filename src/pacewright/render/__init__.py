"""Pages, charts, click tracks and marker strips, from a model that `app` fills."""
