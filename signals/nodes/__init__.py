"""Virtual heads, karts and call boxes that keep the node rules to the letter."""
