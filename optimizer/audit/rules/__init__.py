"""One module a rule, or a tight family of rules; `optimizer.audit.registry` lists them."""
