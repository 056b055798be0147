"""The service: designs and sweeps over HTTP, solved in processes of their own, and the page to watch them on."""
