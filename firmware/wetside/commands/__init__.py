"""The commands of ``wetside``, one module each."""
