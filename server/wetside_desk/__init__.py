"""The teacher's side of wetside: pages and API over the journal."""
