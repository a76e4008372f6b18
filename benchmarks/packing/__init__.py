"""What the layout benchmark and the layout tests share: shapes, strip instances, and the other engines as peers."""
