"""What all tests share: random inputs that are the same on every machine."""

from hypothesis import HealthCheck, settings

# no verdict hangs on how busy a machine is
settings.register_profile(
    "steady",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")
