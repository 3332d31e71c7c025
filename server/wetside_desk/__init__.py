"""The teacher's side of wetside: pages and API over the journal."""

from importlib.metadata import version

#: Version of the distribution; desk and station are installed together.
__version__ = version("wetside")
