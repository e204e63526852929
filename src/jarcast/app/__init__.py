"""What a command does with the ledger: one look, one write; it shows nothing."""
