"""From line work to vertices, edges and faces."""
