"""The order of the stages: `map_site` for the main job, `new_site` for a site file to edit."""
