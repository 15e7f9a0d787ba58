"""Pictures and PDFs she uploads: checked by content, stored by it, shown only to who may see."""
