"""Health people can see: a process's status line, its log, its figures, and what it tells systemd."""
