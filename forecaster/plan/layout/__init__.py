"""Where each plant goes: shapes of beds, scatter of colours."""
