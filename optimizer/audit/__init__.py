"""audit"""
