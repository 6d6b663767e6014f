# What `import voluptuous` means once Home Assistant has been imported.
from probatio import *  # noqa: F403
