"""Use cases: bring in a file, keep and change it, make a lesson of it, hand it out.

Every function takes and returns values and prints nothing; the page and the command line call
these and nothing below. Import from the module that holds the use case (``services.bring``,
``shelf``, ``lesson``, ``paper``, ``zips``, ``demo_library``), so that a light command does not
pay for engraving or a database it never opens.
"""
