// How a body takes light. Two ways: Bevy's own, reckoned at every pixel with shadows, or `PLAIN`, reckoned once at every corner
// and only laid over the pixels, for a processor that does the work of a graphics card.

#import bevy_pbr::{
    forward_io::Vertex,
    mesh_functions::{get_tag, get_world_from_local, mesh_normal_local_to_world, mesh_position_local_to_world},
    view_transformations::position_world_to_clip,
}
#ifndef PLAIN
#import bevy_pbr::{
    forward_io::VertexOutput,
    pbr_fragment::pbr_input_from_vertex_output,
    pbr_functions::{apply_pbr_lighting, main_pass_post_lighting_processing},
}
#endif

struct Paint {
    colour: vec4<f32>,
    to_high: vec3<f32>,
    to_fill: vec3<f32>,
    roughness: f32,
    reflectance: f32,
}

@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> paint: Paint;

fn in_world(in: Vertex) -> vec4<f32> {
    return mesh_position_local_to_world(get_world_from_local(in.instance_index), vec4(in.position, 1.0));
}

fn on_screen(in: Vertex, in_world: vec4<f32>) -> vec4<f32> {
#ifdef VERTEX_UVS_A
    // A bar of bead that is not welded yet: all its corners in one place have no area.
    if in.uv.x > f32(get_tag(in.instance_index)) + 0.5 {
        return vec4(0.0, 0.0, 0.0, 1.0);
    }
#endif
    return position_world_to_clip(in_world.xyz);
}

#ifdef PLAIN

struct Corner {
    @builtin(position) position: vec4<f32>,
    @location(0) colour: vec4<f32>,
}

@vertex
fn vertex(in: Vertex) -> Corner {
    var light = 1.0;
#ifdef LIT
    let normal = mesh_normal_local_to_world(in.normal, in.instance_index);
    light = 0.30 + 0.62 * max(dot(normal, paint.to_high), 0.0) + 0.17 * max(dot(normal, paint.to_fill), 0.0);
#endif
    return Corner(on_screen(in, in_world(in)), vec4(paint.colour.rgb * light, paint.colour.a));
}

@fragment
fn fragment(in: Corner) -> @location(0) vec4<f32> {
    return in.colour;
}

#else

@vertex
fn vertex(in: Vertex) -> VertexOutput {
    var out: VertexOutput;
    out.world_position = in_world(in);
    out.position = on_screen(in, out.world_position);
    out.world_normal = mesh_normal_local_to_world(in.normal, in.instance_index);
#ifdef VERTEX_UVS_A
    out.uv = in.uv;
#endif
#ifdef VERTEX_OUTPUT_INSTANCE_INDEX
    out.instance_index = in.instance_index;
#endif
    return out;
}

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> @location(0) vec4<f32> {
    var input = pbr_input_from_vertex_output(in, is_front, false);
    input.material.base_color = paint.colour;
    input.material.perceptual_roughness = paint.roughness;
    input.material.reflectance = vec3(paint.reflectance);
    var colour = paint.colour;
#ifdef LIT
    colour = apply_pbr_lighting(input);
#endif
    return main_pass_post_lighting_processing(input, colour);
}

#endif
