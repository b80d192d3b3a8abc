"""mount"""
