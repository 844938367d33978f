"""Looks at an installation, and says of each thing how it is and how to mend it: `kerblight doctor`."""
