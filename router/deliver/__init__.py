"""What a person gets: JSON, cut list, drawings, report, IFC and DXF, one file per format."""
