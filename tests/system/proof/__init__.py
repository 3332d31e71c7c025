"""What the proof on a booted machine is made of; ``tests/system/boot.py`` is its command."""
