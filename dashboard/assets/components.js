/* The block that holds SVG text. React is the one Dash brings. */
window.sagline = {
  Svg: function (props) {
    return window.React.createElement("div", {
      id: props.id,
      className: props.className,
      dangerouslySetInnerHTML: { __html: props.markup },
    });
  },
};
