"""The local web app: server-rendered pages and a documented JSON API.

``web.app.create_app(library)`` makes the application, ``web.app.serve(...)`` runs it.
"""
