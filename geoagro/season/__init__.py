"""Material, calendar, labour and money over the life of the field."""
