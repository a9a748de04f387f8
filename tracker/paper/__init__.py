"""What every report on paper or in a browser shares: a page that needs nothing else, drawings, typesetting."""
