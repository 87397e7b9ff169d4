"""fretboard"""
