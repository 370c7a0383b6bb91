// {{ version }} {{ addresses_json|safe }}
