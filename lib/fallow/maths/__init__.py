"""The ground floor: feeds, rates, growth, decay, profiles and the ledger. Numbers in, numbers out."""
