"""export"""
