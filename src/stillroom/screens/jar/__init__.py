"""One jar: its page, its forms and what the keys on it do."""
