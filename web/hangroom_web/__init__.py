"""The page: what the keeper sees and touches, in a process of its own that owns no pin."""

# First of all, because it keeps numpy out of sqlite-utils, and so 20 MB out of this process.
import hangroom.store  # noqa: F401 - imported for what it does
