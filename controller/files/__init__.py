"""Reading what people write: profiles and machine files, checked at the edge."""
