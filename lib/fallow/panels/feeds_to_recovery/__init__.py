"""How many feeds until jars like mine are ready: what a recorded trial says, beside what the ledger says."""
