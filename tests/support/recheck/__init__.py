"""The third judge: a written shot list held against the law by code that shares nothing with the rest."""
